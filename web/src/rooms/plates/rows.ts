/** @file Which cards of a long sheet are in view, and where keys lead. */

/** Rows kept ready above and below those in view. */
const SPARE_ROWS = 2;

export function inView(
  top_px: number,
  high_px: number,
  row_px: number,
  columns: number,
  total: number,
): { first: number; last: number } {
  const first = Math.max(0, Math.floor(top_px / row_px) - SPARE_ROWS) * columns;
  const last = (Math.ceil((top_px + high_px) / row_px) + SPARE_ROWS) * columns - 1;
  return { first, last: Math.min(total - 1, last) };
}

/** Where a key leads from a card; null for a key that leads nowhere. */
export function moved(
  key: string,
  from: number,
  columns: number,
  total: number,
  rowsInView: number,
): number | null {
  const page = Math.max(1, rowsInView) * columns;
  const to = {
    ArrowLeft: from - 1,
    ArrowRight: from + 1,
    ArrowUp: from - columns,
    ArrowDown: from + columns,
    PageUp: from - page,
    PageDown: from + page,
    Home: 0,
    End: total - 1,
  }[key];
  return to === undefined || total === 0 ? null : Math.min(total - 1, Math.max(0, to));
}
