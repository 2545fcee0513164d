"""How exact are the numbers? Removal, loads and motion against exact shapes, solids and optimisers; see docs/exactness.md."""
