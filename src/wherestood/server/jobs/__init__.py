"""Do long work in processes of its own, with progress, and report what became of it."""
