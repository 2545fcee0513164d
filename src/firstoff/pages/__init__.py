"""The shop in a browser beside the machine: our own pages, and the same answers for other programs."""
