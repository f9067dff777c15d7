"""Pages of service programs: read, drafted from tables, sent as files, applied."""
