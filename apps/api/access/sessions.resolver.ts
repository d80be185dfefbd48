import { Mutation, Query, Resolver } from '@nestjs/graphql';
import { Member, NewPin, NewSignInService, SignInService } from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller, IdArg, Input } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const MemberType = objectTypeOf(Member);
const SignInServiceType = objectTypeOf(SignInService);

/** Sessions live in cookies and have no fields here; the PINs that open them do. */
@Resolver()
export class SessionsResolver {
  @Query(() => SignInServiceType)
  signInService(@GraphCaller() call: GraphCall) {
    return call.casebook.tokens.getSignInService(call.actor);
  }

  @Mutation(() => SignInServiceType)
  setSignInService(@GraphCaller() call: GraphCall, @Input(NewSignInService) input: NewSignInService) {
    return call.casebook.tokens.setSignInService(call.actor, input);
  }

  @Mutation(() => SignInServiceType)
  removeSignInService(@GraphCaller() call: GraphCall) {
    return call.casebook.tokens.removeSignInService(call.actor);
  }

  @Mutation(() => MemberType)
  setPin(@GraphCaller() call: GraphCall, @IdArg() id: string, @Input(NewPin) input: NewPin) {
    return call.casebook.sessions.setPin(call.actor, id, input);
  }

  @Mutation(() => MemberType)
  removePin(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.sessions.removePin(call.actor, id);
  }
}
