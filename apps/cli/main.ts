#!/usr/bin/env node
import { Command } from 'commander';
import { COMPRESSOR_KINDS, LAYOUTS, REFRIGERANT_NAMES } from '#libs/vocabulary/index.js';
import { backupCommand, restoreCommand } from './backup.js';
import { doctorCommand } from './doctor.js';
import { keyCommand } from './key.js';
import { migrateCommand } from './migrate.js';
import { organisationCommand } from './organisation.js';
import { startCommand } from './start.js';
import { drawCommand } from './system.js';

const program = new Command('coolback')
  .description('Shared diagnostic memory for vehicle air-conditioning shops')
  .version('0.1.0')
  .showHelpAfterError('(coolback --help lists the commands)');

program
  .command('start')
  .description('database, migrations, demo region, API, worker and console')
  .option('--no-demo', 'leave the demo region out')
  .option('--port <number>', 'port to listen on', '4280')
  .option('--host <address>', 'address to listen on', '127.0.0.1')
  .action(startCommand);

program.command('migrate').description('bring the database to this version').action(migrateCommand);

program
  .command('organisation <name>')
  .description('found an organisation and print its first administrator key')
  .option('--json', 'answer as JSON')
  .action(organisationCommand);

program
  .command('key')
  .description('issue a key for an organisation (asks the database directly; for the first key or a lost one)')
  .requiredOption('--organisation <id>', 'identifier of the organisation')
  .option('--role <role>', 'director, technician, integrator or administrator', 'administrator')
  .option('--name <name>', 'what the key is for', 'issued on the command line')
  .option('--json', 'answer as JSON')
  .action(keyCommand);

program.command('backup <directory>').description('copy the embedded database while it runs').action(backupCommand);
program.command('restore <directory>').description('put a backup in place of the embedded database').action(restoreCommand);
program
  .command('doctor')
  .description('check what the product needs, and say what to do')
  .option('--json', 'answer as JSON')
  .action(doctorCommand);

program
  .command('system')
  .description('the A/C system model')
  .command('draw')
  .description('pressure–enthalpy diagram and circuit of a typical system, sound and faulty, as SVG')
  .option('--layout <word>', LAYOUTS.join(', '), 'valve-integral-receiver')
  .option('--compressor <word>', COMPRESSOR_KINDS.join(', '), 'fixed-clutch')
  .option('--refrigerant <word>', REFRIGERANT_NAMES.join(', '), 'R-134a')
  .option('--fault <word>', 'a fault of the catalogue; the sound system alone when left out')
  .option('--severity <share>', '0 to 1', '0.6')
  .option('--ambient <celsius>', 'air at the condenser, °C', '32')
  .option('--elevation <metres>', 'above sea level', '0')
  .option('--speed <rpm>', 'compressor speed', '1500')
  .option('--out <folder>', 'where to write', '.')
  .action(drawCommand);

try {
  await program.parseAsync(process.argv);
} catch (error) {
  console.error(`coolback: ${(error as Error).message}`);
  process.exitCode = 1;
}
