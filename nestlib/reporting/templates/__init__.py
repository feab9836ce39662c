"""The template of the report."""
