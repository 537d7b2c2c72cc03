"""What lets something out: signing, locking, keys, verify, guard, opening and bringing in."""
