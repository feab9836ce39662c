"""The JSON Schema of ``plan.json``, as package data; read it with `nestlib.writing.plan_schema`."""
