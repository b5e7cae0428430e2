"""The five stages: Dataset in, Dataset out; only ingest reads from the disk."""
