"""Is the stated doubt true? Hidden machines whose truth is drawn apart from what their shop reads; see docs/doubt.md."""
