"""Serve a daybook as pages: routes parse, call one thing, and present."""
