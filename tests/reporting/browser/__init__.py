"""The report in a real browser: a package, so that the browser is closed at its end."""
