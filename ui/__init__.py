"""What people see: the command line, its text and its documents. No arithmetic on quantities beyond units."""
