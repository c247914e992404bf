/** @file What a modern camera needs to see as wide as the plate does. */

/** Width of the 35 mm frame, 36 mm by 24 mm (ISO 1007). */
const MODERN_WIDTH_MM = 36;

/** How wide the plate sees, its cross counted in [deg]. */
export function fieldOf(width_px: number, principal_distance_px: number, cross_px: number): number {
  const side = (half: number): number => Math.atan2(half, principal_distance_px);
  return ((side(width_px / 2 + cross_px) + side(width_px / 2 - cross_px)) * 180) / Math.PI;
}

/** Focal length on a 35 mm frame that shows the plate's whole width [mm]. */
export function modernLens_mm(width_px: number, principal_distance_px: number): number {
  return (MODERN_WIDTH_MM * principal_distance_px) / width_px;
}
