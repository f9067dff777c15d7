"""What was measured: judged against limits, beside what it was before, and tested again after a failure."""
