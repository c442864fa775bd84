"""Records as other programs want them: a module for each form, and the table that some of them share."""
