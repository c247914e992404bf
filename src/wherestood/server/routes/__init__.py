"""Answer what the pages ask, one subject a module."""
