"""Put out what was found: the published form, pictures, plain words."""
