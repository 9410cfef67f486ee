"""What leaves formcheck for a person to read: the report and the clip with the skeleton drawn."""
