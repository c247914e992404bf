import "ol/ol.css";
import "./look/page.css";

import { mount } from "svelte";

import App from "./App.svelte";

const target = document.getElementById("page");
if (target) {
  target.replaceChildren();
  mount(App, { target });
}
