"""The book: what happened to a shop, entry by entry, only ever added to. Text files say what is now; the book says what was then."""
