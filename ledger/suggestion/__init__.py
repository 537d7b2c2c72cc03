"""Which plates could be bolted to each other, from the places and sizes of their holes alone."""
