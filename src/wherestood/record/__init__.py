"""Hold a package of wherestood."""
