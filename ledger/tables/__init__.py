"""Tables of dimensions and clearances, in and out."""
