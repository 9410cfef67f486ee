"""Write the published JSON Schemas again after a document's types changed: ``python -m formcheck.codec``."""

import json

from formcheck.codec import SCHEMA_PATH, review_schema
from formcheck.codec.told import KINDS, schema_path, told_schema

for path, schema in [(SCHEMA_PATH, review_schema()), *((schema_path(kind), told_schema(kind)) for kind in KINDS)]:
    path.write_text(json.dumps(schema, indent=2) + "\n", encoding="utf-8")
