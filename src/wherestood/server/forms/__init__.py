"""Define the forms in which the server is asked and answers."""
