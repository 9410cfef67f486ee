"""Write the published JSON Schema again after the document's types changed: ``python -m formcheck.codec``."""

import json

from formcheck.codec import SCHEMA_PATH, review_schema

SCHEMA_PATH.write_text(json.dumps(review_schema(), indent=2) + "\n", encoding="utf-8")
