"""The numbered formats of the book and the steps between them. A released step is never changed."""
