// What packs and entries say in English, named so that catalogues hold it. It stays English where it
// is kept; only what is shown is translated, and only these very words.
import { mark, t } from "./words.js";

const KNOWN = new Set([
  // kinds of devices, tasks, methods
  mark("smoke"),
  mark("smoke and heat"),
  mark("duct smoke"),
  mark("heat"),
  mark("manual station"),
  mark("waterflow switch"),
  mark("valve supervisory switch"),
  mark("audible"),
  mark("visible"),
  mark("module"),
  mark("battery set"),
  mark("control unit"),
  mark("other device"),
  mark("visual inspection"),
  mark("functional test"),
  mark("sensitivity test"),
  mark("calibrated test method"),
  mark("the maker's calibrated sensitivity instrument"),
  mark("listed control equipment"),
  mark("detector and control unit signal when outside the range"),
  mark("another calibrated method that the authority accepted"),
  // reasons of one tap
  mark("No alarm at the control unit"),
  mark("Wrong address or label reported"),
  mark("No sound or light"),
  mark("Output did not operate"),
  mark("Damaged"),
  mark("Blocked or covered"),
  mark("Painted"),
  mark("Too dirty"),
  mark("Loose or hanging"),
  mark("Room locked"),
  mark("Out of reach"),
  mark("Blocked by goods or furniture"),
  mark("In use, not to be disturbed"),
  mark("Hoistway, no elevator technician"),
  mark("Not found"),
  mark("Out of range"),
  mark("Does not work"),
  mark("End of life"),
  // cautions; the building's own circuits are said before them
  mark("Put the account on test with the supervising station: who, when, until when. Take it off afterwards and make sure that signals arrived."),
  mark("Tell the occupants, and the fire service where the local rule asks for it. Agree what is said and done if a real alarm comes during the test."),
  mark("Do not begin before the releasing circuits are known: disconnect, tag and count; reconnect and count again."),
  mark("Elevator recall and shunt trip: have an elevator technician at hand, or keep the cars empty."),
  mark("Agree times for smoke control, fans, doors and dampers. Each bypass stays an open item until it is restored."),
  mark("Hospitals, laboratories, data halls and process plants: get the owner's permit first."),
  mark("On a larger system work in twos, one of them at the control unit. Test inputs silently first, and outputs once at the end."),
  mark("Waterflow tests need a drain that may be used, and a thought for frost."),
  mark("Ladders, live control units, lead-acid batteries, asbestos: keep to the safety rules of the place."),
  mark("Leave no bypass, open cabinet, dead battery or disabled point behind."),
  mark("Ionization detectors hold a radioactive source: return them, never bin them."),
  // what the app itself writes down
  mark("Photo."),
  mark("Photo, kept smaller than usual: it did not fit."),
  mark("Photo not saved: the tablet's storage is full."),
  mark("Deficiency found on the spot"),
  mark("Impairment: out of service"),
]);
const SECURE = mark("Secure first, and count: {circuits}");
const BEFORE = SECURE.replace("{circuits}", "");

export function packed(text) {
  if (KNOWN.has(text)) return t(text);
  const parts = text?.split("; ") ?? []; // reasons that were given apart
  if (parts.length > 1 && parts.every((one) => KNOWN.has(one))) return parts.map((one) => t(one)).join("; ");
  return text?.startsWith(BEFORE) ? t(SECURE, { circuits: text.slice(BEFORE.length) }) : text;
}
export const upper = (text) => text.charAt(0).toUpperCase() + text.slice(1);
