"""What the rig really does: test frame, drift, polar alignment and pointing, and how a measurement is saved."""
