"""A bay in one file: its journal, records and own files, copied while it runs, and put back."""
