"""Points found from distances between them: numbers only, never files or a database."""
