"""When work was last done on machines that ran before: what is asked, and what people say of it."""
