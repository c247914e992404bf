/** @file Files that were dropped on the page, folders opened. */

export async function filesDropped(dropped: DataTransfer | null): Promise<File[]> {
  const entries = [...(dropped?.items ?? [])]
    .map((item) => item.webkitGetAsEntry())
    .filter((entry) => entry !== null);
  const files = (await Promise.all(entries.map(filesIn))).flat();
  return files.length ? files : [...(dropped?.files ?? [])];
}

/** All files of a dropped file or folder. */
async function filesIn(entry: FileSystemEntry): Promise<File[]> {
  if (entry.isFile)
    return [
      await new Promise<File>((give, fail) => (entry as FileSystemFileEntry).file(give, fail)),
    ];
  const reader = (entry as FileSystemDirectoryEntry).createReader();
  const all: FileSystemEntry[] = [];
  for (;;) {
    const some = await new Promise<FileSystemEntry[]>((give, fail) =>
      reader.readEntries(give, fail),
    );
    if (some.length === 0) break;
    all.push(...some);
  }
  return (await Promise.all(all.map(filesIn))).flat();
}

/** What files dropped on the map are, by their endings: the server looks at what is in them. */
export function kindOf(names: string[]): "features" | "raster" | "none" {
  const ends = names.map((name) => name.toLowerCase().replace(/^.*\./, ""));
  if (ends.some((end) => FEATURES.has(end))) return "features";
  return ends.some((end) => RASTERS.has(end)) ? "raster" : "none";
}

const FEATURES = new Set(["geojson", "json", "gpkg", "kml", "gpx", "shp", "csv", "tsv", "xlsx"]);
const RASTERS = new Set(["tif", "tiff", "asc", "hgt", "zip", "vrt", "img"]);
/** What a file choice offers, as its endings. */
export const FEATURE_FILES = [...FEATURES, "shx", "dbf", "prj"].map((end) => `.${end}`).join(",");
