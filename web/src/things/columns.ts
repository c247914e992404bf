/** @file How a column of an item is asked for. */
export interface Column {
  key: string;
  label: string;
  kind?: "line" | "long" | "number" | "length" | "choice" | "yes" | "date";
  choices?: readonly string[];
  unit?: string;
  placeholder?: string;
}
