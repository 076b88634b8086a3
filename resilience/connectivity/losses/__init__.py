"""What a path takes: ``distance`` (the open path), then ``slabs`` (one wall or slab)."""
