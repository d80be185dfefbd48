export * from './faults.js';
export * from './findings.js';
export * from './readings.js';
export * from './systems.js';
