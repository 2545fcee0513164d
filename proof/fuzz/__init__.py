"""Coverage-guided fuzzing of everything that reads a file of the user's: programs, facts, shapes (`make fuzz`)."""
