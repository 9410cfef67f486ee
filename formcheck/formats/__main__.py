"""Write the published JSON Schemas again after a document's types changed: ``python -m formcheck.formats``."""

import json

from formcheck.formats import SCHEMA_PATH, review_schema
from formcheck.formats.training_json import KINDS, schema_path, told_schema

for path, schema in [(SCHEMA_PATH, review_schema()), *((schema_path(kind), told_schema(kind)) for kind in KINDS)]:
    path.write_text(json.dumps(schema, indent=2) + "\n", encoding="utf-8")
