"""What bad input is answered with: every kind of wrong, the answer, the exit code, the place named (`make bad-input`)."""
