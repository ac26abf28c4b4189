"""Pure maths over observations; None where undefined; never rounds."""
