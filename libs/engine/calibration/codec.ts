import { BadSample } from '#libs/numeric/index.js';
import { FAULT_CODES } from '../codes.js';
import { DIMS } from '../dims.js';
import { TERMS } from './features.js';
import { type CalibratedGroup, type CalibratedNode, GATE_TERMS, TRIANGLE } from './model.js';

/** A calibration as it is shipped: one header and one block of little-endian 32-bit floats in base64. */
export interface Artefact {
  readonly version: string;
  /** FNV-1a of header and base64 text, hexadecimal. */
  readonly hash: string;
  /** Groups and nodes as JSON: [{ key, nodes: [[place of the code in the catalogue, severity, share, capacity lost, band, share of the regime, width of the loss], ...] }, ...]. */
  readonly header: string;
  readonly data: string;
}

/** 32-bit FNV-1a of a text, hexadecimal: tells a torn or edited artefact from a whole one. */
export function fnv1a(text: string): string {
  let h = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) {
    h ^= text.charCodeAt(i);
    h = Math.imul(h, 0x01000193);
  }
  return (h >>> 0).toString(16).padStart(8, '0');
}

const PER_NODE = DIMS * TERMS + TRIANGLE + GATE_TERMS;

export function encode(version: string, groups: readonly CalibratedGroup[]): Artefact {
  const count = groups.reduce((sum, g) => sum + g.nodes.length, 0);
  const bytes = new DataView(new ArrayBuffer(count * PER_NODE * 4));
  let at = 0;
  for (const group of groups) {
    for (const node of group.nodes) {
      for (const x of node.coefficients) bytes.setFloat32(4 * at++, x, true);
      for (const x of node.covariance) bytes.setFloat32(4 * at++, x, true);
      for (const x of node.gate) bytes.setFloat32(4 * at++, x, true);
    }
  }
  let binary = '';
  for (let i = 0; i < bytes.byteLength; i++) binary += String.fromCharCode(bytes.getUint8(i));
  const data = btoa(binary);
  const round = (x: number) => Math.round(x * 1e4) / 1e4;
  const header = JSON.stringify(
    groups.map((g) => ({
      key: g.key,
      nodes: g.nodes.map((n) => [
        FAULT_CODES.indexOf(n.code),
        round(n.severity),
        round(n.share),
        round(n.capacityLost),
        n.band,
        round(n.regimeShare),
        round(n.lossSigma),
      ]),
    })),
  );
  return { version, hash: fnv1a(header + data), header, data };
}

/** Throws when the data do not match their hash or length: a damaged calibration must never answer. */
export function decode(artefact: Artefact): ReadonlyMap<string, CalibratedGroup> {
  if (fnv1a(artefact.header + artefact.data) !== artefact.hash)
    throw new BadSample(`Calibration ${artefact.version} does not match its hash`);
  const groups = JSON.parse(artefact.header) as readonly {
    key: string;
    nodes: readonly (readonly [number, number, number, number, number, number, number])[];
  }[];
  const binary = atob(artefact.data);
  const bytes = new DataView(new ArrayBuffer(binary.length));
  for (let i = 0; i < binary.length; i++) bytes.setUint8(i, binary.charCodeAt(i));
  const count = groups.reduce((sum, g) => sum + g.nodes.length, 0);
  if (bytes.byteLength !== count * PER_NODE * 4) throw new BadSample(`Calibration ${artefact.version} has the wrong length`);
  let at = 0;
  const take = (n: number): Float32Array => {
    const out = new Float32Array(n);
    for (let i = 0; i < n; i++) out[i] = bytes.getFloat32(4 * at++, true);
    return out;
  };
  return new Map(
    groups.map((g) => [
      g.key,
      {
        key: g.key,
        nodes: g.nodes.map(
          ([code, severity, share, capacityLost, band, regimeShare, lossSigma]): CalibratedNode => ({
            code: FAULT_CODES[code]!,
            severity,
            share,
            capacityLost,
            coefficients: take(DIMS * TERMS),
            covariance: take(TRIANGLE),
            gate: take(GATE_TERMS),
            band,
            regimeShare,
            lossSigma,
          }),
        ),
      },
    ]),
  );
}
