"""What stands in a path: ``faces`` (upright rectangles), then ``crossings`` (what they cost)."""
