"""Step 5: riders, shelters, vans and escorts to one plan."""
