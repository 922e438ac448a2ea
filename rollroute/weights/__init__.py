"""Step 3: what a network means for one chair under one set of conditions."""
