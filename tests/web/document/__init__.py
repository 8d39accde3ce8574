"""The description of the API (OpenAPI 3.1), made from the schemas, the table of problems and the settings.

`python -m tests.web.document` writes it to schemas/openapi.json, where the service reads it. Whatever changes a schema,
a limit, a rule, a problem or the answer to an example changes the description too, and a test says so.
"""
