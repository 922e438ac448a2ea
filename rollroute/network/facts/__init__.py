"""Tags to facts: one table per family of keys, each naming the wiki page that defines it."""
