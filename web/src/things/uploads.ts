/** @file Files handed in: sent as they are, checked by the server by what is in them. */
import { api, Gone, Refused, told, troubleIn, type Schemas } from "../api/client";

type Job = Schemas["Job"];
type FeaturesTaken = Schemas["FeaturesTaken"];

/** Send files as they are; what they are for is said afterwards. */
export async function send(files: File[]): Promise<string> {
  const { upload_id } = await told(api.POST("/api/uploads"));
  for (const file of files) {
    const name = file.webkitRelativePath || file.name;
    let answer: Response;
    try {
      answer = await fetch(`/api/uploads/${upload_id}/files?name=${encodeURIComponent(name)}`, {
        method: "POST",
        headers: { "Content-Type": "application/octet-stream" },
        body: file,
      });
    } catch (reason) {
      throw new Gone(String(reason));
    }
    if (!answer.ok)
      throw new Refused(
        answer.status,
        troubleIn(await answer.json().catch(() => null), answer.status),
      );
  }
  return upload_id;
}

/** Take scans in: to a plate, or each as a new one. */
export async function takeScans(files: File[], plateId: string | null): Promise<Job> {
  const upload_id = await send(files);
  return told(
    api.POST("/api/uploads/{upload_id}/scans", {
      params: { path: { upload_id } },
      body: { plate_id: plateId, again: false },
    }),
  );
}

export async function takeTerrain(files: File[]): Promise<Job> {
  const upload_id = await send(files);
  return told(
    api.POST("/api/uploads/{upload_id}/terrain", {
      params: { path: { upload_id } },
      body: { surface: "unknown" },
    }),
  );
}

/** Take plans in: those that say themselves where they lie, or to be pinned. */
export async function takePlans(
  files: File[],
  { must_lie = true, page = null as number | null } = {},
): Promise<Job> {
  const upload_id = await send(files);
  return told(
    api.POST("/api/uploads/{upload_id}/plans", {
      params: { path: { upload_id } },
      body: { must_lie, page },
    }),
  );
}

export async function takeFeatures(files: File[]): Promise<FeaturesTaken> {
  const upload_id = await send(files);
  return told(api.POST("/api/uploads/{upload_id}/features", { params: { path: { upload_id } } }));
}
