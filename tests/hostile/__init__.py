"""Files that somebody may hand in to do harm, made by a script."""
