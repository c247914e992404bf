/** @file A picture of the terrain laid over or under a scan, whole or up to a line. */
import ImageLayer from "ol/layer/Image";
import { getRenderPixel } from "ol/render";
import type RenderEvent from "ol/render/Event";
import Static from "ol/source/ImageStatic";

/** Make the layer of a picture that covers a scan of some size. */
export function renderedLayer(
  address: string,
  width_px: number,
  height_px: number,
  opacity: number,
  /** Share of the view's width from which it shows; 0 for all of it. */
  swipe: () => number,
): ImageLayer<Static> {
  const source = new Static({ url: address, imageExtent: [0, -height_px, width_px, 0] });
  const layer = new ImageLayer({ source, opacity, className: "rendered" });
  layer.on("prerender", (event: RenderEvent) => {
    const pen = event.context;
    const [wide, high] = event.frameState?.size ?? [0, 0];
    if (!(pen instanceof CanvasRenderingContext2D)) return;
    const left = (wide ?? 0) * swipe();
    const corners = [
      [left, 0],
      [wide ?? 0, 0],
      [wide ?? 0, high ?? 0],
      [left, high ?? 0],
    ].map((corner) => getRenderPixel(event, corner));
    pen.save();
    pen.beginPath();
    for (const [i, [x, y]] of corners.entries()) {
      if (i === 0) pen.moveTo(x ?? 0, y ?? 0);
      else pen.lineTo(x ?? 0, y ?? 0);
    }
    pen.closePath();
    pen.clip();
  });
  layer.on("postrender", (event: RenderEvent) => {
    if (event.context instanceof CanvasRenderingContext2D) event.context.restore();
  });
  return layer;
}
