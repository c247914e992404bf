"""Say when a plate was exposed: bounds, sun and shadow, process and format."""
