//! Sound as numbers: clips, rendering, listening.
