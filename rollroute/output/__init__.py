"""Step 6: a route or a plan to maps, sheets, messages and files."""
