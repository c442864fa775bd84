"""The report of an inspection: a page of facts (`page`), what it says (`content`), and how it is set."""
