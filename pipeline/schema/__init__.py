"""What is stored: the channels of a log, the tables of the store, every column's meaning."""
