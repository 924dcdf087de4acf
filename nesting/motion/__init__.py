"""Machine kinematics and time."""
