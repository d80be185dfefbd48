import { readFileSync } from 'node:fs';
import { Agent, request } from 'node:http';

/** Seconds of processor time a process has used so far (utime and stime of /proc; a hundred ticks a second on Linux). */
export function cpuSeconds(pid) {
  const fields = readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ')[1].split(' ');
  return (Number(fields[11]) + Number(fields[12])) / 100;
}

/** One request over a kept connection; its status and body. */
export function send(agent, { port, method = 'GET', path, headers = {}, body }) {
  return new Promise((resolve, reject) => {
    const sent = request({ agent, host: '127.0.0.1', port, method, path, headers }, (response) => {
      const parts = [];
      response.on('data', (part) => parts.push(part));
      response.on('end', () => resolve({ status: response.statusCode, body: Buffer.concat(parts).toString() }));
      response.on('error', reject);
    });
    sent.on('error', reject);
    sent.end(body);
  });
}

export const newAgent = (connections) => new Agent({ keepAlive: true, maxSockets: connections });

/** Sends a number of requests over a few connections, one after the other on each. Wall seconds, processor seconds of the server. */
export async function round(target, count, connections) {
  const startCpu = cpuSeconds(target.pid);
  const start = performance.now();
  let left = count;
  const one = async () => {
    while (left-- > 0) {
      const { status } = await send(target.agent, target.request);
      if (status !== 200) throw new Error(`${target.name} answered ${status}`);
    }
  };
  await Promise.all(Array.from({ length: connections }, one));
  return { wall: (performance.now() - start) / 1000, cpu: cpuSeconds(target.pid) - startCpu };
}

export const median = (values) => {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
};

/**
 * Two servers in turns, so that what else the machine does falls on both alike. Ratios of requests a second and of requests a second of the
 * server's processor, ours over theirs: the median of the rounds for the wall, the sums for the processor.
 */
export async function compare(ours, theirs, { rounds, count, connections }) {
  // A server that has run for a minute: optimised code comes after some thousands of requests.
  for (let i = 0; i < 8; i++) for (const target of [ours, theirs]) await round(target, count, connections);
  const walls = [];
  const cpu = { ours: 0, theirs: 0 };
  const wall = { ours: 0, theirs: 0 };
  for (let i = 0; i < rounds; i++) {
    const order = i % 2 === 0 ? [ours, theirs] : [theirs, ours];
    const result = new Map();
    for (const target of order) result.set(target, await round(target, count, connections));
    walls.push(result.get(theirs).wall / result.get(ours).wall);
    for (const [name, target] of [
      ['ours', ours],
      ['theirs', theirs],
    ]) {
      cpu[name] += result.get(target).cpu;
      wall[name] += result.get(target).wall;
    }
  }
  const total = rounds * count;
  return {
    wallRatio: median(walls),
    cpuRatio: cpu.theirs / cpu.ours,
    detail: `${Math.round(total / wall.ours)}/s against ${Math.round(total / wall.theirs)}/s; ${((cpu.ours / total) * 1e6).toFixed(0)} µs of the server's processor a request against ${((cpu.theirs / total) * 1e6).toFixed(0)} µs; ${rounds} rounds of ${count} in turns over ${connections} connections`,
  };
}
