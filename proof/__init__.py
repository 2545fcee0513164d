"""Studies that prove the verdict's figures: written to docs by `make` targets, sampled by `tests/proof`."""
