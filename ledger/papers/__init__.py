"""What the papers of a part and of a job say, gathered from the facts."""
