/** The directions of docs/architecture.md. `tests/structure/boundaries.test.ts` plants one breach of each and expects it to be found. */
const SCIENCE = '^libs/(vocabulary|units|numeric|refrigerant|air|system|engine|outcomes)/';

/** @type {import('dependency-cruiser').IConfiguration} */
export default {
  forbidden: [
    {
      name: 'science-is-pure',
      comment: 'Science could be published alone: no framework, no zod, no Prisma, no node: module. psychrolib is allowed in air.',
      severity: 'error',
      from: { path: SCIENCE, pathNot: '\\.(test|bench)\\.ts$' },
      to: { dependencyTypes: ['npm', 'npm-dev', 'core', 'npm-no-pkg', 'unknown'], pathNot: 'node_modules/psychrolib' },
    },
    {
      name: 'psychrolib-only-in-air',
      comment: 'Its unit system is global state; one wrapper sets it.',
      severity: 'error',
      from: { path: '^(libs|apps)/', pathNot: '^libs/air/' },
      to: { path: 'node_modules/psychrolib' },
    },
    {
      name: 'science-stays-below',
      comment: 'Science libs know nothing of the casebook, the contracts, the database or an app.',
      severity: 'error',
      from: { path: SCIENCE },
      to: { path: '^(libs/(casebook|contracts|database|demo)|apps)/' },
    },
    {
      name: 'numeric-knows-no-physics',
      severity: 'error',
      comment: 'Solvers know no physics; units depend on nothing.',
      from: { path: '^libs/(numeric|units)/' },
      to: { path: '^libs/(refrigerant|air|system|engine|outcomes)/' },
    },
    {
      name: 'properties-below-system',
      severity: 'error',
      comment: 'refrigerant and air are below system, system below engine; outcomes stands beside them.',
      from: { path: '^libs/(refrigerant|air)/' },
      to: { path: '^libs/(system|engine|outcomes)/' },
    },
    { name: 'system-below-engine', severity: 'error', comment: 'The model does not know who asks it.', from: { path: '^libs/system/' }, to: { path: '^libs/(engine|outcomes)/' } },
    { name: 'outcomes-beside-physics', severity: 'error', comment: 'Statistics know no refrigeration.', from: { path: '^libs/outcomes/' }, to: { path: '^libs/(refrigerant|air|system|engine)/' } },
    {
      name: 'contracts-know-only-units-and-words',
      severity: 'error',
      comment: 'The console and the client take the shapes without anything else.',
      from: { path: '^libs/contracts/' },
      to: { path: '^(libs/(?!contracts/|units/|vocabulary/)[^/]+|apps)/' },
    },
    {
      name: 'database-knows-no-feature',
      severity: 'error',
      comment: 'The database lib carries tenants, not cases.',
      from: { path: '^libs/database/' },
      to: { path: '^(libs/(casebook|demo|engine|system|outcomes|refrigerant|air)|apps)/' },
    },
    { name: 'libs-never-import-apps', severity: 'error', comment: 'Apps are on top.', from: { path: '^libs/' }, to: { path: '^apps/' } },
    {
      name: 'apps-are-islands',
      severity: 'error',
      comment: 'Only the command line may use what the other apps start.',
      from: { path: '^apps/(api|worker|console)/' },
      to: { path: '^apps/(?!$1/)' },
    },
    {
      name: 'transports-never-touch-sql',
      severity: 'error',
      comment: 'Transports call operations; statements belong to the casebook.',
      from: { path: '^apps/' },
      to: { path: '(\\.queries\\.ts$|node_modules/pg/)' },
    },
    {
      name: 'own-index-never-imported-inside',
      severity: 'error',
      comment: 'A lib that imports its own index goes round in circles.',
      from: { path: '^libs/([^/]+)/' },
      to: { path: '^libs/$1/index\\.ts$' },
    },
    {
      name: 'libs-meet-at-their-index',
      severity: 'error',
      comment: 'One index.ts a lib is its public face.',
      from: { path: '^(libs/([^/]+)|apps)/' },
      to: { path: '^libs/(?!$2/)[^/]+/.+', pathNot: ['^libs/[^/]+/index\\.ts$', '^libs/$2/'] },
    },
    { name: 'no-cycles', severity: 'error', comment: 'A circle has no beginning to read from.', from: { pathNot: '\\.test\\.ts$' }, to: { circular: true, viaOnly: { dependencyTypesNot: ['type-only'] } } },
    {
      name: 'no-orphans',
      severity: 'error',
      comment: 'Nobody reaches it. (The fit of the calibration is reached by its builder in tests/validate.)',
      from: { orphan: true, path: '^(libs|apps)/', pathNot: ['\\.(test|bench|d)\\.ts$', '^apps/[^/]+/main\\.ts$', '^apps/console/', '^libs/engine/calibration/fit\\.ts$'] },
      to: {},
    },
  ],
  options: {
    doNotFollow: { path: 'node_modules' },
    exclude: { path: '(^dist/|\\.test\\.ts$|^apps/console/)' },
    tsConfig: { fileName: 'tsconfig.json' },
    tsPreCompilationDeps: true,
    enhancedResolveOptions: { exportsFields: ['exports'], conditionNames: ['types', 'import', 'default'], mainFields: ['module', 'main', 'types'] },
  },
};
