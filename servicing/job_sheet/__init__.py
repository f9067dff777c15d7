"""The job sheet of an order: what to prepare, what to bring, and the work step by step."""
