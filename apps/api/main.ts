import { serverProcess } from './process.js';

await serverProcess(process.env);
