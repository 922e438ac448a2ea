"""Step 1: files to nouns. The only package that reads the world."""
