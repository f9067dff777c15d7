"""The parts of a work order's life; `servicing.workorders` is the door to them."""
