"""Write the published JSON Schemas again after a document's types changed: ``python -m formcheck.formats``."""

import json

from formcheck.formats import SCHEMA_PATH, make_review_schema
from formcheck.formats.training_json import KINDS, get_schema_path, make_schema

for path, schema in [
    (SCHEMA_PATH, make_review_schema()),
    *((get_schema_path(kind), make_schema(kind)) for kind in KINDS),
]:
    path.write_text(json.dumps(schema, indent=2) + "\n", encoding="utf-8")
