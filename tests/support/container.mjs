// Keeps one PostgreSQL container for a test run: `node container.mjs <run folder>`. A process of its own, because the container has to
// outlive the jest worker that wanted it first. It ends with SIGTERM, or when the run's process is gone.
import { readFileSync, renameSync, writeFileSync } from 'node:fs';
import { connect } from 'node:net';
import { join } from 'node:path';
import { GenericContainer, Wait } from 'testcontainers';

const folder = process.argv[2];
const runPid = Number(readFileSync(join(folder, 'run.pid'), 'utf8'));
const image = process.env['COOLBACK_TEST_IMAGE'] ?? 'postgres:17';
const PASSWORD = 'coolback-test';

/** Answers appear whole: the waiting worker never reads half a file. */
function report(answer) {
  const draft = join(folder, 'container.json.draft');
  writeFileSync(draft, JSON.stringify(answer));
  renameSync(draft, join(folder, 'container.json'));
}
const accepts = (host, port) =>
  new Promise((resolve) => {
    const socket = connect(port, host);
    socket.once('connect', () => resolve(true)).once('error', () => resolve(false));
    socket.once('connect', () => socket.destroy());
  });

try {
  const container = await new GenericContainer(image)
    .withEnvironment({ POSTGRES_PASSWORD: PASSWORD })
    .withCommand(['postgres', '-c', 'fsync=off', '-c', 'synchronous_commit=off', '-c', 'full_page_writes=off', '-c', 'max_connections=200'])
    .withExposedPorts(5432)
    // The official image starts a server to set itself up, stops it, and starts the one that stays: the second message counts.
    .withWaitStrategy(Wait.forLogMessage(/database system is ready to accept connections/, Number(process.env['COOLBACK_TEST_READY'] ?? 2)))
    .withStartupTimeout(60_000)
    .start();
  let stopping = false;
  const stop = async () => {
    if (stopping) return;
    stopping = true;
    await container.stop({ remove: true }).catch(() => {});
    process.exit(0);
  };
  process.on('SIGTERM', stop);
  setInterval(() => {
    try {
      process.kill(runPid, 0);
    } catch {
      void stop();
    }
  }, 500);
  const [host, port] = [container.getHost(), container.getMappedPort(5432)];
  if (!(await accepts(host, port))) throw new Error(`the container runs but ${host}:${port} does not answer`);
  report({ superUrl: `postgresql://postgres:${PASSWORD}@${host}:${port}/postgres`, pid: process.pid, image });
} catch (error) {
  report({ problem: error instanceof Error ? error.message : String(error) });
  process.exit(1);
}
