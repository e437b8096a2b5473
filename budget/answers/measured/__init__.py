"""What is measured on the way: bottles weighed, nights logged, and what both say of the van."""
