"""Far fields: figures of a pattern, fields of slots on tubes, fields from a recording box."""
