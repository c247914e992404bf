"""Hold one step from each schema to the next."""
